@echo off
"%~dp0quarterturn.exe" show
if errorlevel 1 pause
