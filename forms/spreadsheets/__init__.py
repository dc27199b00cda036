"""The sheet as a workbook or a table: written, and read back."""
