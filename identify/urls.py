from django.urls import URLPattern

app_name = "identify"
urlpatterns: list[URLPattern] = []
