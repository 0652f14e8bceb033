"""Workbooks (XLSX, XLS, ODS) as rows of raw strings, guarded against files that would fill the memory."""
