"""Loop schedules that come as spreadsheets, read into designs, and designs written as schedules."""
