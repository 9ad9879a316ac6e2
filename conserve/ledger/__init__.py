"""The fabric ledger, told and drawn: how much of each phase is in place, through time."""

from conserve.ledger.drawing import drawing
from conserve.ledger.model import Ledger, Line, Measure, Step, ledger_of

__all__ = ["Ledger", "Line", "Measure", "Step", "drawing", "ledger_of"]
