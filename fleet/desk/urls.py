from django.urls import path

from fleet.desk import charts, family, family_acts, pupil_data, views
from fleet.desk.picture import picture

app_name = "desk"
urlpatterns = [
    path("", views.home, name="home"),
    path("h/<slug:code>/", views.label, name="label"),
    path("s/<slug:school>/", views.today, name="today"),
    path("s/<slug:school>/horns/<int:pk>/", views.horn, name="horn"),
    path("s/<slug:school>/horns/<int:pk>/chart/", charts.chart, name="chart"),
    path("s/<slug:school>/horns/<int:pk>/chart.musicxml", charts.chart_xml, name="chart-xml"),
    path("s/<slug:school>/together/", charts.together, name="together"),
    path("s/<slug:school>/picture/", picture, name="picture"),
    path("s/<slug:school>/pupils/<int:pk>/data.zip", pupil_data.pupil_data, name="pupil-data"),
    path("s/<slug:school>/pupils/<int:pk>/forget/", pupil_data.pupil_forget, name="pupil-forget"),
    path("s/<slug:school>/prints/", views.prints, name="prints"),
    path("family/", family.family, name="family"),
    path("family/<int:pk>/", family.family_horn, name="family-horn"),
    path("family/data.zip", family_acts.data, name="family-data"),
    path("family/sign/<int:pk>/", family_acts.sign, name="family-sign"),
    path("family/<int:pk>/longer/", family_acts.renew, name="family-renew"),
    path("family/<int:pk>/lost/", family_acts.lost, name="family-lost"),
    path("family/<int:pk>/chart/", charts.family_chart, name="family-chart"),
    path("family/<int:pk>/care.pdf", family.family_care, name="family-care"),
    path("family/<int:pk>/sheet.pdf", family.family_sheet, name="family-sheet"),
    path("family/pictures/<int:pk>/", family.family_picture, name="family-picture"),
]
