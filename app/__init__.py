"""Leadline: an offline web checklist runner for live crewed operations."""
