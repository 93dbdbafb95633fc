"""Addresses of settings and staff. `fleet.urls` joins them with those of a pupil's pages under one name, `people`."""

from django.urls import path

from fleet.people.pages import openings, settings

urlpatterns = [
    path("settings/", settings.settings, name="settings"),
    path("settings/who-looked/", openings.openings, name="openings"),
    path("settings/staff/new/", settings.staff_new, name="staff-new"),
    path("settings/staff/<int:pk>/", settings.staff_edit, name="staff-edit"),
]
