"""The rules of cover, read once more by themselves: see `oracle.py`."""
