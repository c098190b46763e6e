from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from builds.json_files import read_json, write_json
from compliance.worksheets import WORKSHEETS, WorksheetError, run


class Command(BaseCommand):
    help = "Compute one worksheet from JSON. Known: " + ", ".join(WORKSHEETS)
    requires_system_checks: list[str] = []  # noqa: RUF012 - it needs no database

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name")
        parser.add_argument("inputs", help="a JSON file, or - for standard input")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            result = run(options["name"], read_json(options["inputs"]))
        except WorksheetError as error:
            line = " ".join(str(error).split())
            raise CommandError(line, returncode=2) from error
        self.stdout.write(write_json(result))
