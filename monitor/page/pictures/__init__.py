"""Chooses what to draw of a pile or bin: plots and the table behind them, sections, QR codes; `monitor.drawing` draws it."""
