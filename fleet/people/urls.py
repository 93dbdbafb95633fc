from django.urls import path

from fleet.people import openings, views

app_name = "people"
urlpatterns = [
    path("pupils/", views.pupils, name="pupils"),
    path("pupils/new/", views.pupil_new, name="pupil-new"),
    path("pupils/<int:pk>/", views.pupil_edit, name="pupil-edit"),
    path("pupils/<int:pk>/guardians/new/", views.guardian_new, name="guardian-new"),
    path("guardians/<int:pk>/", views.guardian_edit, name="guardian-edit"),
    path("settings/", views.settings, name="settings"),
    path("settings/who-looked/", openings.openings, name="openings"),
    path("settings/staff/new/", views.staff_new, name="staff-new"),
    path("settings/staff/<int:pk>/", views.staff_edit, name="staff-edit"),
]
