from django.urls import path

from fleet.reports.repair_list import repair_list

app_name = "reports"
urlpatterns = [
    path("repair-list.pdf", repair_list, name="repair-list"),
]
