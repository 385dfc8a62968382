"""A yard in a made-up world where much fails at once. All that must hold is checked, and a run can be had again by its seed."""
