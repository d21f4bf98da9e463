"""Glyphs to standard marks: takes lines of glyphs or typed text, gives marks in normal form.

A grammar, tolerant to what readers confuse on metal in the fixed words of a mark, strict in its
free digits. `find_spans` also tells which glyphs belong to marks, serials and dates, so that their
numbers are not taken for strengths. Pure: no pixels, no files.
"""

from stampreader.marks.find import Span, find_marks, find_spans, normal_form

__all__ = ["Span", "find_marks", "find_spans", "normal_form"]
