from typing import Any

from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"

    def ready(self) -> None:
        from django.contrib.auth.signals import user_logged_out

        user_logged_out.connect(_logged_out, dispatch_uid="inspections.phones")


def _logged_out(request: Any, user: Any, **_more: Any) -> None:
    """Note which phone shows no pages of today any more: the session, which knows it, ends with this."""
    from inspections.actions.phones import put_away
    from inspections.phones import uuid_of
    from inspections.views.hello import PHONE

    phone = uuid_of(request.session.get(PHONE)) if request is not None and user is not None else None
    if phone is not None:
        put_away(user, phone)
