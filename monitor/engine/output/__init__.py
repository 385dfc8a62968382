"""From what is decided to effects and words: alarms, conditions of places, who watches what."""
