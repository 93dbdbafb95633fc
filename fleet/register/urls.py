from django.urls import URLPattern

app_name = "register"
urlpatterns: list[URLPattern] = []
