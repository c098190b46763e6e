from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db.models import Q

from builds.json_files import write_json
from builds.models import BuildJob
from builds.snapshots import take_record


class Command(BaseCommand):
    help = "Write the open record of a build, by number or id."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("build")

    def handle(self, *args: Any, **options: Any) -> None:
        name = options["build"]
        wanted = Q(number=name)
        if name.isdecimal() and len(name) < 15:
            wanted |= Q(pk=int(name))
        build = BuildJob.objects.filter(wanted).first()
        if build is None:
            raise CommandError(f"There is no build {name}.", returncode=2)
        self.stdout.write(write_json(take_record(build)))
