"""What is made before anybody asks."""

from passband.service.made_ready import making_ready
from passband.web.pages.page import load_templates


def test_all_templates_can_be_read_ahead():
    assert "event.html" in list(load_templates())


def test_a_library_is_made_ready_and_the_thread_ends(client):
    with making_ready(client.app.state.library, most_runs=10) as behind:
        behind.start()
        behind.join(60)
        assert not behind.is_alive()
    with making_ready(None, most_runs=10) as behind:
        behind.start()
    assert not behind.is_alive()
