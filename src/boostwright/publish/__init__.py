"""Figures, sentences, tables and reports made from study results."""
