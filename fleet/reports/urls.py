from django.urls import path

from fleet.reports import care_card, handover, labels, lists, overdue_letters, views
from fleet.reports.chart import chart
from fleet.reports.condition_report import condition_report
from fleet.reports.counts import count_report, count_sheet
from fleet.reports.disposal_record import disposal_record
from fleet.reports.job_ticket import job_ticket
from fleet.reports.repair_list import repair_list
from fleet.reports.yearly_report import yearly_report

app_name = "reports"
urlpatterns = [
    path("horns/<int:pk>/chart.pdf", chart, name="chart"),
    path("loans/<int:pk>/sheet.pdf", views.loan_sheet, name="loan-sheet"),
    path("sheet-to-sign.pdf", views.sheet_to_sign, name="sheet-to-sign"),
    path("jobs/<int:pk>/ticket.pdf", job_ticket, name="job-ticket"),
    path("jobs/<int:pk>/condition.pdf", condition_report, name="condition-report"),
    path("sheets-to-sign.pdf", views.batch_sheets, name="batch-sheets"),
    path("repair-list.pdf", repair_list, name="repair-list"),
    path("loan-sheets.pdf", views.loan_sheets, name="loan-sheets"),
    path("labels.pdf", labels.labels, name="labels"),
    path("class-list.pdf", lists.class_list, name="class-list"),
    path("overdue.pdf", lists.overdue_list, name="overdue-list"),
    path("overdue-letters.pdf", overdue_letters.overdue_letters, name="overdue-letters"),
    path("horns/<int:pk>/care.pdf", care_card.care_card, name="care-card"),
    path("handover.pdf", handover.receipt, name="handover"),
    path("insurance.pdf", handover.schedule, name="insurance"),
    path("yearly-report.pdf", yearly_report, name="yearly-report"),
    path("counts/<int:pk>/sheet.pdf", count_sheet, name="count-sheet"),
    path("counts/<int:pk>/report.pdf", count_report, name="count-report"),
    path("disposals/<int:pk>/record.pdf", disposal_record, name="disposal-record"),
]
