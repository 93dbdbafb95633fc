"""Addresses of prints."""

from django.urls import path

from fleet.reports.pages import counts, guide, horns, loans, workshop, yearly

app_name = "reports"
urlpatterns = [
    path("horns/<int:pk>/chart.pdf", horns.chart, name="chart"),
    path("horns/<int:pk>/care.pdf", horns.care_card, name="care-card"),
    path("checks.pdf", guide.checks_poster, name="checks-poster"),
    path("kinds.pdf", guide.build_cards, name="build-cards"),
    path("labels.pdf", horns.labels, name="labels"),
    path("handover.pdf", horns.receipt, name="handover"),
    path("insurance.pdf", horns.schedule, name="insurance"),
    path("disposals/<int:pk>/record.pdf", horns.disposal_record, name="disposal-record"),
    path("loans/<int:pk>/sheet.pdf", loans.loan_sheet, name="loan-sheet"),
    path("agreement.pdf", loans.agreement, name="agreement"),
    path("sheet-to-sign.pdf", loans.sheet_to_sign, name="sheet-to-sign"),
    path("sheets-to-sign.pdf", loans.batch_sheets, name="batch-sheets"),
    path("loan-sheets.pdf", loans.loan_sheets, name="loan-sheets"),
    path("class-list.pdf", loans.class_list, name="class-list"),
    path("overdue.pdf", loans.overdue_list, name="overdue-list"),
    path("overdue-letters.pdf", loans.overdue_letters, name="overdue-letters"),
    path("jobs/<int:pk>/ticket.pdf", workshop.job_ticket, name="job-ticket"),
    path("jobs/<int:pk>/order/", workshop.job_order, name="job-order"),
    path("jobs/<int:pk>/condition.pdf", workshop.condition_report, name="condition-report"),
    path("bench-day.pdf", workshop.bench_day_on_paper, name="bench-day"),
    path("order-list.pdf", workshop.order_list, name="order-list"),
    path("bench-tags.pdf", workshop.job_tags, name="job-tags"),
    path("repair-list.pdf", workshop.repair_list, name="repair-list"),
    path("counts/<int:pk>/sheet.pdf", counts.count_sheet, name="count-sheet"),
    path("counts/<int:pk>/report.pdf", counts.count_report, name="count-report"),
    path("yearly-report.pdf", yearly.yearly_report, name="yearly-report"),
]
