from django.urls import path

from fleet.desk import views

app_name = "desk"
urlpatterns = [
    path("", views.home, name="home"),
    path("s/<slug:school>/", views.today, name="today"),
]
