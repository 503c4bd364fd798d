"""For support: looking, and closing an account. Roles change through the actions alone, nothing is deleted."""

from __future__ import annotations

from typing import Any

from allauth.account.decorators import secure_admin_login
from django.contrib import admin
from django.http import HttpRequest

from accounts.models import Authorisation, Operator, Role, User

# The admin's own log-in would count no wrong passwords.
admin.site.login = secure_admin_login(admin.site.login)  # type: ignore[method-assign]


class ReadOnly(admin.ModelAdmin):  # type: ignore[type-arg]
    """Shows rows; adds, changes and deletes none."""

    actions = None

    def has_add_permission(self, request: HttpRequest, *args: Any) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(User)
class UserAdmin(ReadOnly):
    list_display = ("name", "email", "ref", "is_active", "is_staff", "last_login")
    list_filter = ("is_active", "is_staff")
    search_fields = ("name", "email", "ref")
    fields = ("name", "email", "ref", "is_active", "is_staff", "is_superuser", "date_joined", "last_login")
    readonly_fields = ("name", "email", "ref", "is_staff", "is_superuser", "date_joined", "last_login")

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Allow what is left when a phone with an open log-in is lost: ``is_active`` is the one field to change."""
        return admin.ModelAdmin.has_change_permission(self, request, obj)


@admin.register(Operator)
class OperatorAdmin(ReadOnly):
    list_display = ("name", "tz", "id")
    search_fields = ("name",)
    fields = ("name", "tz", "log")


@admin.register(Role)
class RoleAdmin(ReadOnly):
    list_display = ("user", "kind", "operator", "since", "until")
    list_filter = ("kind", "operator")
    list_select_related = ("user", "operator")
    search_fields = ("user__name", "user__email")


@admin.register(Authorisation)
class AuthorisationAdmin(ReadOnly):
    list_display = ("user", "subject", "operator", "since", "until", "ended_at")
    list_filter = ("subject", "operator")
    list_select_related = ("user", "operator")
    search_fields = ("user__name", "user__email")
