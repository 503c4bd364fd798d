from django.contrib import admin
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import include, path


def not_here(request: HttpRequest) -> HttpResponse:
    """Addresses of people are changed by their manager, not by themselves: the page of the log-in library is closed."""
    raise Http404


urlpatterns = [
    path("account/email/", not_here, name="account_email"),
    path("account/", include("allauth.account.urls")),
    path("operator/", include("accounts.urls")),
    path("", include("courses.urls")),
    path("", include("inspections.urls")),
    path("", include("reports.urls")),
    path("support/", admin.site.urls),
]
