"""The page beside the car: the same session, log and sheet for a browser, without internet.

Imports `jobs`, `report` and what is below them, starlette and uvicorn; nothing but its command
imports it.
"""
