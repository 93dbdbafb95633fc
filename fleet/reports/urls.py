from django.urls import path

from fleet.reports import care_card, handover, labels, lists, overdue_letters, views
from fleet.reports.chart import chart
from fleet.reports.repair_list import repair_list

app_name = "reports"
urlpatterns = [
    path("horns/<int:pk>/chart.pdf", chart, name="chart"),
    path("loans/<int:pk>/sheet.pdf", views.loan_sheet, name="loan-sheet"),
    path("sheet-to-sign.pdf", views.sheet_to_sign, name="sheet-to-sign"),
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
]
