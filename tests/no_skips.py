"""Under CI a test that was skipped is a test that did not pass: nothing may look green that was not run."""

import os

import pytest

_skipped: list[str] = []


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    if report.skipped:
        _skipped.append(report.nodeid)


def pytest_collectreport(report: pytest.CollectReport) -> None:
    if report.skipped:
        _skipped.append(report.nodeid)


def pytest_sessionfinish(session: pytest.Session) -> None:
    if _skipped and os.environ.get("CI") == "true" and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if _skipped and os.environ.get("CI") == "true":
        terminalreporter.section("skipped, which CI does not accept")
        for name in _skipped:
            terminalreporter.line(name)
