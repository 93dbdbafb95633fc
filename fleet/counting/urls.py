from django.urls import path

from fleet.counting.pages import counts, differences
from fleet.counting.pages import shelf as views_shelf

urlpatterns = [
    path("counts/", counts.counts, name="counts"),
    path("counts/new/", counts.count_new, name="count-new"),
    path("counts/<int:pk>/", counts.count, name="count"),
    path("counts/<int:pk>/shelf/", views_shelf.shelf, name="shelf"),
    path("counts/<int:pk>/sent/", views_shelf.sent, name="sent"),
    path("counts/<int:pk>/end/", counts.end, name="end"),
    path("counts/<int:pk>/sign/", counts.sign, name="sign"),
    path("counts/sightings/<int:pk>/undo/", views_shelf.undo, name="undo"),
    path("counts/finds/<int:pk>/undo/", views_shelf.find_undo, name="find-undo"),
    path("counts/lines/<int:pk>/", differences.line, name="line"),
    path("counts/finds/<int:pk>/", differences.find, name="find"),
]
