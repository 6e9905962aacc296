"""A report as one HTML file that opens anywhere, without a network."""

from __future__ import annotations

from biomech.report.html.page import Whole, report_text, write_report

__all__ = ["Whole", "report_text", "write_report"]
