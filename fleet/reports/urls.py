from django.urls import path

from fleet.reports.chart import chart
from fleet.reports.repair_list import repair_list

app_name = "reports"
urlpatterns = [
    path("horns/<int:pk>/chart.pdf", chart, name="chart"),
    path("repair-list.pdf", repair_list, name="repair-list"),
]
