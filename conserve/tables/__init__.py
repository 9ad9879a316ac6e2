"""Spreadsheets: a survey of components brought in, registers and survey sheets given back."""
