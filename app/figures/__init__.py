"""Figures: pure functions from results to plotly figures; no streamlit, no solver."""
