from django.urls import path

from fleet.reports.pages import horns, loans
from fleet.reports.pages import horns as horns_pages
from fleet.reports.pages import horns as labels_horns
from fleet.reports.pages import loans as loans_pages
from fleet.reports.pages import loans as views_loans
from fleet.reports.pages.horns import chart
from fleet.reports.pages.workshop import condition_report, job_ticket, repair_list
from fleet.reports.pages.yearly import yearly_report
from fleet.reports.paper.counts import count_report, count_sheet
from fleet.reports.paper.disposal_record import disposal_record

app_name = "reports"
urlpatterns = [
    path("horns/<int:pk>/chart.pdf", chart, name="chart"),
    path("loans/<int:pk>/sheet.pdf", views_loans.loan_sheet, name="loan-sheet"),
    path("sheet-to-sign.pdf", views_loans.sheet_to_sign, name="sheet-to-sign"),
    path("jobs/<int:pk>/ticket.pdf", job_ticket, name="job-ticket"),
    path("jobs/<int:pk>/condition.pdf", condition_report, name="condition-report"),
    path("sheets-to-sign.pdf", views_loans.batch_sheets, name="batch-sheets"),
    path("repair-list.pdf", repair_list, name="repair-list"),
    path("loan-sheets.pdf", views_loans.loan_sheets, name="loan-sheets"),
    path("labels.pdf", labels_horns.labels, name="labels"),
    path("class-list.pdf", loans.class_list, name="class-list"),
    path("overdue.pdf", loans.overdue_list, name="overdue-list"),
    path("overdue-letters.pdf", loans_pages.overdue_letters, name="overdue-letters"),
    path("horns/<int:pk>/care.pdf", horns.care_card, name="care-card"),
    path("handover.pdf", horns_pages.receipt, name="handover"),
    path("insurance.pdf", horns_pages.schedule, name="insurance"),
    path("yearly-report.pdf", yearly_report, name="yearly-report"),
    path("counts/<int:pk>/sheet.pdf", count_sheet, name="count-sheet"),
    path("counts/<int:pk>/report.pdf", count_report, name="count-report"),
    path("disposals/<int:pk>/record.pdf", disposal_record, name="disposal-record"),
]
