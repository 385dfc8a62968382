"""What is drawn of a pile or bin: plots over time and the table behind them, sections, QR codes; `monitor.drawing` draws it."""
