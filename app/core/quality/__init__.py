"""Statistics of image quality: rates and their uncertainty, fair comparison, change over time, agreement, targets.

Plain arithmetic on counts. What is counted, and when, is decided in `app.work`.
"""
