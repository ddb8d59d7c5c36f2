"""Labels: facts -> HTML -> PDF. Knows no database and imports nothing of the service.

Importing this package is cheap; the PDF engine and the QR encoder are loaded when first used.
"""

from labels.errors import BadFact, DoesNotFit, LabelError, Misread, UnknownHazard

__all__ = ["BadFact", "DoesNotFit", "LabelError", "Misread", "UnknownHazard"]
