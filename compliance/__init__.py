"""Sourced arithmetic for fitting accessories to vehicles: plain values in, results with their working out."""
