from typing import Any

from django.core.management.base import BaseCommand

from builds.models import OPEN_STAGES, BuildJob
from builds.services.checks import refresh_checks


class Command(BaseCommand):
    help = "Check every open build again, after the rules have changed."

    def handle(self, *args: Any, **options: Any) -> None:
        builds = BuildJob.objects.filter(stage__in=OPEN_STAGES).order_by("pk")
        total = builds.count()
        for n, build in enumerate(builds.iterator(chunk_size=100), start=1):
            refresh_checks(build=build)
            self.stdout.write(f"{n} of {total}: {build.number}")
