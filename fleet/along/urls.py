"""Addresses of what a phone takes along. The worker serves the school's pages, so it lies above them all."""

from django.urls import path

from fleet.along.pages import along

urlpatterns = [
    path("along/", along.along, name="along"),
    path("along/cupboard/", along.cupboard, name="cupboard"),
    path("along/kept.json", along.kept, name="kept"),
    path("along/scales.json", along.scales, name="scales"),
    path("along/app.webmanifest", along.manifest, name="manifest"),
    path("along-worker.js", along.worker, name="worker"),
]
