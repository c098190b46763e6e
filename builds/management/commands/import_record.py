from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from builds.json_files import read_json
from builds.records import fault_lines, import_record
from builds.snapshots import scenarios
from compliance.record import RecordError
from workshop.models import Customer


class Command(BaseCommand):
    help = "Make a new build from a record: all of it or nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("record", help="a JSON file, or - for standard input")
        parser.add_argument(
            "--customer", required=True, help="name of a customer on file"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        name = options["customer"]
        customers = Customer.objects.filter(name=name)
        if customers.count() != 1:
            raise CommandError(
                f"There are {customers.count()} customers named {name}; one is wanted.",
                returncode=2,
            )
        try:
            data = read_json(options["record"])
            build = import_record(data=data, customer=customers.get())
        except RecordError as error:
            raise CommandError(fault_lines(error), returncode=2) from error
        except ValidationError as error:
            raise CommandError("\n".join(error.messages), returncode=2) from error
        if data.get("scenarios") not in (None, [], scenarios(build)):
            self.stderr.write("Its scenarios are left out: a build has its own.")
        self.stdout.write(build.number)
