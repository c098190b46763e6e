"""Worksheets about mass: axles, trailer, weighing, payload."""

from compliance.worksheets.fields import Worksheet

SHEETS: tuple[Worksheet, ...] = ()
