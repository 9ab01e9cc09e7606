"""Simulated photos and scans of a coloured chart page, from spectra, for tests and evaluations only.

Everything here follows light through the page: reflectance of paper and ink, spectrum of the lamp,
sensitivity of the sensor, then what a phone or a scanner does to its raw signal. The reading code never
imports any of it.
"""
