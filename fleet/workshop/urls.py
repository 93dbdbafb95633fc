from django.urls import path

from fleet.workshop import views, views_check

app_name = "workshop"
urlpatterns = [
    path("bench/", views.bench_list, name="bench"),
    path("bench/visit/", views.visit_plan, name="visit"),
    path("horns/<int:pk>/check/", views_check.check_new, name="check-new"),
    path("checks/<int:pk>/", views_check.check, name="check"),
    path("checks/pictures/<int:pk>.jpg", views_check.check_photograph, name="check-photograph"),
    path("horns/<int:pk>/repair/", views.job_new, name="job-new"),
    path("jobs/<int:pk>/", views.job, name="job"),
    path("fault-reports/<int:pk>/", views.report, name="report"),
]
