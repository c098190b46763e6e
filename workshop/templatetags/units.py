"""Numbers with their units, the way they are printed everywhere."""

from django import template

register = template.Library()
