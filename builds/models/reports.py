"""What the checks found, and the packs that were printed."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from builds.models.jobs import BuildJob
from workshop.models import Person


class CheckReport(models.Model):
    """The checks' answer for the build as stored; ``digest`` names that record."""

    build = models.OneToOneField(
        BuildJob, on_delete=models.CASCADE, related_name="report"
    )
    ruleset = models.CharField(max_length=40)
    digest = models.CharField(max_length=64)
    results = models.JSONField()
    checked_at = models.DateTimeField(auto_now=True)

    def __str__(self) -> str:
        return f"checks of {self.build_id}"


class PackState(models.TextChoices):
    WAITING = "waiting", "Waiting"
    MAKING = "making", "Being made"
    READY = "ready", "Ready"
    FAILED = "failed", "Failed"


class Pack(models.Model):
    """One handover pack: asked for, made outside the request, kept."""

    build = models.ForeignKey(BuildJob, on_delete=models.CASCADE, related_name="packs")
    revision = models.PositiveSmallIntegerField()
    final = models.BooleanField(default=False)
    digest = models.CharField(
        max_length=64, help_text="Of what the pack was made from."
    )
    state = models.CharField(
        max_length=8, choices=PackState.choices, default=PackState.WAITING
    )
    lease_until = models.DateTimeField(null=True, blank=True)
    progress = models.CharField(max_length=80, blank=True)
    problem = models.CharField(max_length=300, blank=True)
    file_sha256 = models.CharField(max_length=64, blank=True)
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    made_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-revision"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["build", "revision"], name="pack_revision_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.build.number} revision {self.revision}"
