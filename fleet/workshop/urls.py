from django.urls import path

from fleet.workshop import views, views_care, views_check, views_parts

app_name = "workshop"
urlpatterns = [
    path("bench/", views.bench_list, name="bench"),
    path("bench/visit/", views.visit_plan, name="visit"),
    path("horns/<int:pk>/check/", views_check.check_new, name="check-new"),
    path("checks/<int:pk>/", views_check.check, name="check"),
    path("checks/pictures/<int:pk>.jpg", views_check.check_photograph, name="check-photograph"),
    path("horns/<int:pk>/repair/", views.job_new, name="job-new"),
    path("jobs/<int:pk>/", views.job, name="job"),
    path("jobs/<int:pk>/outside/", views_parts.outside, name="job-outside"),
    path("jobs/<int:pk>/approve/", views_parts.approve, name="job-approve"),
    path("jobs/<int:pk>/part/", views_parts.job_part, name="job-part"),
    path("care/", views_care.care, name="care"),
    path("horns/<int:pk>/care/", views_care.horn_care, name="horn-care"),
    path("parts/", views_parts.parts, name="parts"),
    path("parts/new/", views_parts.part_edit, name="part-new"),
    path("parts/<int:pk>/", views_parts.part_edit, name="part-edit"),
    path("fault-reports/<int:pk>/", views.report, name="report"),
]
