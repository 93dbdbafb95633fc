from django.urls import path

from fleet.workshop.pages import agreed, bench, brought, care, checks, jobs, mended_now, outside, parts, reports

app_name = "workshop"
urlpatterns = [
    path("bench/", bench.bench_list, name="bench"),
    path("bench/move/", bench.bench_move, name="bench-move"),
    path("bench/visit/", bench.visit_plan, name="visit"),
    path("horns/<int:pk>/check/", checks.check_new, name="check-new"),
    path("horns/<int:pk>/mended/", mended_now.mended, name="mended-now"),
    path("checks/<int:pk>/", checks.check, name="check"),
    path("checks/pictures/<int:pk>.jpg", checks.check_photograph, name="check-photograph"),
    path("horns/<int:pk>/repair/", jobs.job_new, name="job-new"),
    path("jobs/<int:pk>/", jobs.job, name="job"),
    path("jobs/<int:pk>/outside/", outside.outside, name="job-outside"),
    path("jobs/<int:pk>/approve/", outside.approve, name="job-approve"),
    path("jobs/<int:pk>/fault/", agreed.job_fault, name="job-fault"),
    path("jobs/<int:pk>/family/", brought.job_family, name="job-family"),
    path("jobs/<int:pk>/fetched/", brought.job_fetched, name="job-fetched"),
    path("jobs/<int:pk>/quote/", outside.job_quote, name="job-quote"),
    path("jobs/<int:pk>/part/", parts.job_part, name="job-part"),
    path("care/", care.care, name="care"),
    path("care/back/", care.care_back, name="care-back"),
    path("horns/<int:pk>/care/", care.horn_care, name="horn-care"),
    path("parts/", parts.parts, name="parts"),
    path("parts/new/", parts.part_edit, name="part-new"),
    path("parts/ordered/", parts.parts_ordered, name="parts-ordered"),
    path("parts/count/", parts.stock_take, name="stock-take"),
    path("parts/<int:pk>/came/", parts.part_came, name="part-came"),
    path("parts/<int:pk>/", parts.part_edit, name="part-edit"),
    path("fault-reports/<int:pk>/", reports.report, name="report"),
]
