from django.urls import path

from fleet.counting import views, views_shelf

app_name = "counting"
urlpatterns = [
    path("counts/", views.counts, name="counts"),
    path("counts/new/", views.count_new, name="count-new"),
    path("counts/<int:pk>/", views.count, name="count"),
    path("counts/<int:pk>/shelf/", views_shelf.shelf, name="shelf"),
    path("counts/<int:pk>/sent/", views_shelf.sent, name="sent"),
    path("counts/<int:pk>/end/", views.end, name="end"),
    path("counts/<int:pk>/sign/", views.sign, name="sign"),
    path("counts/sightings/<int:pk>/undo/", views_shelf.undo, name="undo"),
    path("counts/finds/<int:pk>/undo/", views_shelf.find_undo, name="find-undo"),
    path("counts/lines/<int:pk>/", views.line, name="line"),
    path("counts/finds/<int:pk>/", views.find, name="find"),
]
