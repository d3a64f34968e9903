"""Tests of the job record and its rules."""
