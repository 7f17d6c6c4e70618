//! Files in a folder. Those in a bucket are tried against a server that speaks S3, in `hub/tests/bucket.rs`.

use super::*;
use std::path::Path;

async fn brought(blobs: &Blobs, bytes: &[u8], piece: usize) -> Fresh {
    let mut fresh = blobs.begin();
    for piece in bytes.chunks(piece) {
        fresh.push(Bytes::copy_from_slice(piece)).await.unwrap();
    }
    fresh
}

async fn keep(blobs: &Blobs, bytes: &[u8]) -> Hash {
    let fresh = brought(blobs, bytes, 100_000).await;
    let hash = fresh.hash();
    blobs.put(fresh, async { Ok(()) }).await.unwrap();
    hash
}

fn begun(folder: &Path) -> usize {
    fs::read_dir(folder.join("blobs/begun")).unwrap().count()
}

#[tokio::test]
async fn what_comes_in_pieces_is_the_same_whole_and_is_not_held_while_it_comes() {
    let folder = tempfile::tempdir().unwrap();
    let blobs = Blobs::open_at(folder.path(), None).unwrap();
    let photo: Vec<u8> = (0..1_000_000u32).map(|n| (n % 251) as u8).collect();
    let fresh = brought(&blobs, &photo, 70_000).await;
    let Held::File(file) = &fresh.held else { panic!("it goes into a file") };
    assert!(file.waiting() < 300_000, "{} of its bytes are still held", file.waiting());
    assert_eq!((fresh.bytes(), fresh.hash()), (photo.len(), Hash::of(&photo)));
    assert_eq!(begun(folder.path()), 1);
    blobs.put(fresh, async { Ok(()) }).await.unwrap();
    assert_eq!(begun(folder.path()), 0);
    assert!(blobs.get(Hash::of(&photo)).await.unwrap() == Some(photo));
    assert_eq!(keep(&blobs, b"").await, Hash::of(b""));
    assert_eq!(blobs.get(Hash::of(b"")).await.unwrap(), Some(Vec::new()));
}

#[tokio::test]
async fn what_was_broken_off_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    let blobs = Blobs::open_at(folder.path(), None).unwrap();
    drop(brought(&blobs, &[7; 600_000], 300_000).await);
    assert_eq!(begun(folder.path()), 0);
    assert_eq!(blobs.get(Hash::of(&[7; 600_000])).await.unwrap(), None);
}

#[tokio::test]
async fn files_of_one_shop_are_apart_from_those_of_others() {
    let folder = tempfile::tempdir().unwrap();
    let blobs = Blobs::open_at(folder.path(), None).unwrap();
    let (one, other) = (blobs.of(Uuid::from_u128(1)), blobs.of(Uuid::from_u128(2)));
    let hash = keep(&one, b"a plate").await;
    assert_eq!(other.get(hash).await.unwrap(), None);
    keep(&other, b"a plate").await;
    assert!(one.remove(async { Ok(vec![hash]) }, |_| async { Ok(()) }).await.unwrap());
    assert_eq!(one.get(hash).await.unwrap(), None);
    assert_eq!(other.get(hash).await.unwrap(), Some(b"a plate".to_vec()));
}

#[test]
fn files_are_looked_for_where_they_were_put_and_nowhere_else() {
    let folder = tempfile::tempdir().unwrap();
    let bucket: BucketAddress = "s3://shop/photos/".parse().unwrap();
    let reaches = |bucket: Option<&BucketAddress>| Blobs::open_at(folder.path(), bucket).map(drop);
    reaches(None).unwrap();
    reaches(None).unwrap();
    let said = reaches(Some(&bucket)).unwrap_err().to_string();
    assert!(said.contains("in its folder"), "{said}");
    fs::remove_file(folder.path().join(WHERE)).unwrap();
    assert!(reaches(Some(&bucket)).is_err(), "a folder from before it was written down");
    let fresh = tempfile::tempdir().unwrap();
    Blobs::open_at(fresh.path(), Some(&bucket)).unwrap();
    for refused in [Blobs::open_at(fresh.path(), None), Blobs::join(fresh.path(), None)] {
        let said = refused.unwrap_err().to_string();
        assert!(said.contains("s3://shop/photos"), "{said}");
    }
    assert!(!fresh.path().join("blobs").exists(), "nothing was made");
}

#[test]
fn an_address_names_a_bucket_and_never_shows_a_key() {
    let shown = |text: &str| text.parse::<BucketAddress>().map(|address| address.to_string());
    assert_eq!(shown("s3://shop"), Ok("s3://shop/".to_owned()));
    assert_eq!(shown("s3://shop/a/b/"), Ok("s3://shop/a/b".to_owned()));
    for wrong in ["shop", "http://shop", "s3://", "s3:///a", "s3://shop/a//b"] {
        assert!(shown(wrong).is_err(), "{wrong}");
    }
    let address: BucketAddress = "s3://shop".parse().unwrap();
    let address = address.with([("AWS_SECRET_ACCESS_KEY".to_owned(), "hush".to_owned())]);
    assert!(!format!("{address} {address:?}").contains("hush"));
}
