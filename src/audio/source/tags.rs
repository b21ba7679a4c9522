//! Title, artist, and what old iTunes files keep in a tag.

use symphonia::core::meta::{MetadataRevision, StandardTag};

use super::Source;

impl Source {
    /// Title and artist from the tags.
    pub fn title_and_artist(&mut self) -> (Option<String>, Option<String>) {
        let mut titles = Vec::new();
        let mut artists = Vec::new();
        let mut look = |revision: &MetadataRevision| {
            let tracks = revision.per_track.iter().flat_map(|track| &track.metadata.tags);
            for tag in revision.media.tags.iter().chain(tracks) {
                match &tag.std {
                    Some(StandardTag::TrackTitle(text)) => titles.push(text.to_string()),
                    Some(StandardTag::Artist(text)) => artists.push((0, text.to_string())),
                    Some(StandardTag::AlbumArtist(text)) => artists.push((1, text.to_string())),
                    Some(StandardTag::Performer(text)) => artists.push((2, text.to_string())),
                    Some(StandardTag::OriginalArtist(text)) => artists.push((3, text.to_string())),
                    _ => {}
                }
            }
        };
        let mut metadata = self.reader.metadata();
        while let Some(revision) = metadata.pop() {
            look(&revision);
        }
        if let Some(revision) = metadata.current() {
            look(revision);
        }
        let clean = |text: &String| {
            let text = text.trim_matches(|c: char| c.is_whitespace() || c == '\0');
            (!text.is_empty()).then(|| text.to_string())
        };
        artists.sort_by_key(|(rank, _)| *rank);
        (titles.iter().find_map(clean), artists.iter().find_map(|(_, text)| clean(text)))
    }

    /// The text of the tag in which iTunes keeps delay and length.
    pub(super) fn itunes_gapless_tag(&mut self) -> Option<String> {
        let mut metadata = self.reader.metadata();
        let latest = metadata.skip_to_latest()?;
        let tag = latest.media.tags.iter().find(|tag| tag.raw.key.ends_with("iTunSMPB"))?;
        Some(tag.raw.value.to_string())
    }
}
