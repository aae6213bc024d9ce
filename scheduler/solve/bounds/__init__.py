"""What no plan can beat, shown by counting.

The earliest finish: `destructive.py` (finishes refuted by counting loads, which `energy.py` counts). The least open
trench: `least_exposure.py` (each stretch alone), `least_of_blocks.py` (a reach with its branches). The least money,
visits and trips: `least_spent.py`.
"""
