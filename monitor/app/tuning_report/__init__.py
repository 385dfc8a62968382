"""What `tune` and `replay --set` answer: lines, values for programs, and a report with pictures."""
