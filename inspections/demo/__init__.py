"""An invented course with invented people and one season of mornings, built through the actions from a fixed seed."""
