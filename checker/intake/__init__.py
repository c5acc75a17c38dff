"""Loop schedules that come as spreadsheets, read into designs."""
