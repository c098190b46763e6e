from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from builds.demo import scenario
from workshop.models import Site


class Command(BaseCommand):
    help = "Load the demonstration workshop into an empty database."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--if-empty", action="store_true", help="Do nothing where there is data."
        )
        parser.add_argument(
            "--sign-ins", action="store_true", help="Only print the demo sign-ins."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["sign_ins"]:
            self._print_sign_ins()
            return
        if not scenario.is_empty():
            if options["if_empty"]:
                return
            raise CommandError("There is data already; the demo is not mixed into it.")
        scenario.load()
        self.stdout.write("The demonstration workshop is loaded.")

    def _print_sign_ins(self) -> None:
        if not Site.current().is_demo:
            return
        self.stdout.write(f"Demo sign-ins, password {scenario.PASSWORD}:")
        for username, first, last, role in scenario.PEOPLE:
            self.stdout.write(f"  {username:6} {first} {last}, {role.label.lower()}")
