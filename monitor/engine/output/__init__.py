"""Effects and words made from decisions: alarms, conditions of places, and how places are watched."""
