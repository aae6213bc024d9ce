"""What a plan costs: one list of charges, from which the bill, the goals of a solve and what is told are made."""

from scheduler.costs.billing import Bill, BillLine, bill
from scheduler.costs.charges import Charge, charges

__all__ = ["Bill", "BillLine", "Charge", "bill", "charges"]
