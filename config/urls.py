from django.contrib import admin
from django.urls import include, path

urlpatterns = [path("people/", include("allauth.account.urls")), path("support/", admin.site.urls)]
