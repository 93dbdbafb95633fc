from django.urls import path

from fleet.reports import views
from fleet.reports.chart import chart
from fleet.reports.condition_report import condition_report
from fleet.reports.job_ticket import job_ticket
from fleet.reports.repair_list import repair_list

app_name = "reports"
urlpatterns = [
    path("horns/<int:pk>/chart.pdf", chart, name="chart"),
    path("loans/<int:pk>/sheet.pdf", views.loan_sheet, name="loan-sheet"),
    path("sheet-to-sign.pdf", views.sheet_to_sign, name="sheet-to-sign"),
    path("jobs/<int:pk>/ticket.pdf", job_ticket, name="job-ticket"),
    path("jobs/<int:pk>/condition.pdf", condition_report, name="condition-report"),
    path("repair-list.pdf", repair_list, name="repair-list"),
]
