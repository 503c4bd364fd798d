"""``manage.py found_operator "Kestrel Hollow" --email mirte@example.org --name "Mirte Valk" --tz Europe/Vienna``"""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone

from accounts import actions
from accounts.deeds import COMMAND, Deed
from accounts.errors import Refused
from accounts.models import Operator, Role, User


class Command(BaseCommand):
    help = "Begin an operator with its history and its first manager. Everybody else is invited by that manager."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("operator", help="name of the operator")
        parser.add_argument("--email", required=True, help="address of the first manager")
        parser.add_argument("--name", required=True, help="name of the first manager, if the address is new")
        parser.add_argument("--tz", required=True, help="time zone of the office, such as Europe/Vienna")
        parser.add_argument(
            "--also", action="append", default=[], choices=["technician", "engineer"],
            help="a further role of the first manager; may be given twice",
        )  # fmt: skip

    @transaction.atomic
    def handle(
        self, *args: Any, operator: str, email: str, name: str, tz: str, also: list[str], **options: Any
    ) -> None:
        if Operator.objects.filter(name__iexact=operator.strip()).exists():
            raise CommandError(f"There is an operator {operator.strip()} already; nothing was changed.")
        try:
            validate_email(email)
        except ValidationError:
            raise CommandError(f"{email} is not an e-mail address.") from None
        at = timezone.now()
        user = User.objects.filter(email__iexact=email).first()
        if user is None:
            user = User.objects.create_user(email, None, name=name.strip(), date_joined=at)
        try:
            founded = actions.found_operator(
                operator, tz=tz, roles=[Role.Kind.MANAGER, *also], deed=Deed(by=user, at=at, how=COMMAND)
            )
        except Refused as refused:
            raise CommandError(refused.sentence) from None
        self.stdout.write(f"{founded} was founded; {user.email} is its manager.")
        if not user.has_usable_password():
            self.stdout.write(f"Now set a password: manage.py changepassword {user.email}")
