from django.urls import path

from fleet.reports import views
from fleet.reports.chart import chart
from fleet.reports.counts import count_report, count_sheet
from fleet.reports.disposal_record import disposal_record
from fleet.reports.repair_list import repair_list
from fleet.reports.yearly_report import yearly_report

app_name = "reports"
urlpatterns = [
    path("horns/<int:pk>/chart.pdf", chart, name="chart"),
    path("loans/<int:pk>/sheet.pdf", views.loan_sheet, name="loan-sheet"),
    path("sheet-to-sign.pdf", views.sheet_to_sign, name="sheet-to-sign"),
    path("repair-list.pdf", repair_list, name="repair-list"),
    path("yearly-report.pdf", yearly_report, name="yearly-report"),
    path("counts/<int:pk>/sheet.pdf", count_sheet, name="count-sheet"),
    path("counts/<int:pk>/report.pdf", count_report, name="count-report"),
    path("disposals/<int:pk>/record.pdf", disposal_record, name="disposal-record"),
]
