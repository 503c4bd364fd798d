from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("account/", include("allauth.account.urls")),
    path("operator/", include("accounts.urls")),
    path("", include("courses.urls")),
    path("", include("inspections.urls")),
    path("", include("reports.urls")),
    path("support/", admin.site.urls),
]
