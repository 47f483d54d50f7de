"""The pages of an episode and of a patient."""


from tests.scenario import Fernhollow


def test_the_episode_page_names_the_patient_the_hand_and_the_day(clinic: Fernhollow, therapist):
    episode = clinic.episode()
    text = therapist.get(f"/episodes/{episode.code}/").content.decode()
    assert str(episode.patient) in text
    assert "Right ring finger" in text
    assert "day 12" in text
