"""Credentials: trainings, clearances, burn-test reports and data sheets with their days, and what a job's rules want."""
