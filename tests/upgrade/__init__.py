"""Dumps that earlier versions left behind, and the proof that today's version takes them over unharmed."""
