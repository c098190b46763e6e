from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from builds.json_files import read_json, write_json
from builds.records import fault_lines
from compliance.assess import calculate
from compliance.record import RecordError


class Command(BaseCommand):
    help = "Compute all results of a build record, as JSON."
    requires_system_checks: list[str] = []  # noqa: RUF012 - it needs no database

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("record", help="a JSON file, or - for standard input")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            results = calculate(read_json(options["record"]))
        except RecordError as error:
            raise CommandError(fault_lines(error), returncode=2) from error
        self.stdout.write(write_json(results))
