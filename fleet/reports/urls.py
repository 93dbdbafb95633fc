"""Addresses of prints."""

from django.urls import path

from fleet.reports.pages import counts, guide, horns, loans, workshop, yearly

urlpatterns = [
    path("prints/horns/<int:pk>/chart.pdf", horns.chart, name="chart"),
    path("prints/horns/<int:pk>/care.pdf", horns.care_card, name="care-card"),
    path("prints/checks.pdf", guide.checks_poster, name="checks-poster"),
    path("prints/kinds.pdf", guide.build_cards, name="build-cards"),
    path("prints/labels.pdf", horns.labels, name="labels"),
    path("prints/handover.pdf", horns.receipt, name="handover"),
    path("prints/insurance.pdf", horns.schedule, name="insurance"),
    path("prints/disposals/<int:pk>/record.pdf", horns.disposal_record, name="disposal-record"),
    path("prints/loans/<int:pk>/sheet.pdf", loans.loan_sheet, name="loan-sheet"),
    path("prints/agreement.pdf", loans.agreement, name="agreement"),
    path("prints/sheet-to-sign.pdf", loans.sheet_to_sign, name="sheet-to-sign"),
    path("prints/sheets-to-sign.pdf", loans.batch_sheets, name="batch-sheets"),
    path("prints/loan-sheets.pdf", loans.loan_sheets, name="loan-sheets"),
    path("prints/class-list.pdf", loans.class_list, name="class-list"),
    path("prints/overdue.pdf", loans.overdue_list, name="overdue-list"),
    path("prints/overdue-letters.pdf", loans.overdue_letters, name="overdue-letters"),
    path("prints/jobs/<int:pk>/ticket.pdf", workshop.job_ticket, name="job-ticket"),
    path("prints/jobs/<int:pk>/order/", workshop.job_order, name="job-order"),
    path("prints/jobs/<int:pk>/condition.pdf", workshop.condition_report, name="condition-report"),
    path("prints/bench-day.pdf", workshop.bench_day_on_paper, name="bench-day"),
    path("prints/order-list.pdf", workshop.order_list, name="order-list"),
    path("prints/bench-tags.pdf", workshop.job_tags, name="job-tags"),
    path("prints/repair-list.pdf", workshop.repair_list, name="repair-list"),
    path("prints/counts/<int:pk>/sheet.pdf", counts.count_sheet, name="count-sheet"),
    path("prints/counts/<int:pk>/report.pdf", counts.count_report, name="count-report"),
    path("prints/yearly-report.pdf", yearly.yearly_report, name="yearly-report"),
]
