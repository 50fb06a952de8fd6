use super::manifest::Set;
use super::*;

/// A folder that goes away with its test.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Folder {
        let path = std::env::temp_dir().join(format!("tickover-outputs-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&path).expect("a folder");
        Folder(path)
    }

    fn place(&self) -> Place {
        Place::of_folder(self.0.clone(), false, ("run", "van"), Vec::new())
    }

    fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(&self.0).expect("the folder");
        let mut names: Vec<String> =
            entries.map(|e| e.expect("an entry").file_name().into_string().expect("a name")).collect();
        names.sort();
        names
    }

    fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.0.join(name)).expect("a file")
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn set(files: &[(&'static str, &str)]) -> Outputs {
    Outputs { files: files.iter().map(|(name, text)| (*name, text.as_bytes().to_vec())).collect() }
}

#[test]
fn a_failed_write_leaves_nothing() {
    let folder = Folder::new("failed");
    std::fs::create_dir_all(folder.0.join("b.txt")).expect("a folder in the way of a file");
    std::fs::write(folder.0.join("mine.txt"), "kept").expect("a file of somebody else");
    let refused = set(&[("a.txt", "x"), ("b.txt", "x")]).write(&folder.place(), &mut Vec::new());
    assert!(matches!(refused, Err(Failure::Usage(_))));
    assert_eq!(folder.names(), ["b.txt", "mine.txt"]);
}

/// A kill after each of the renames, one after the other: the next set, of another command, finishes the one before it.
#[test]
fn what_was_cut_off_half_way_is_finished_and_said() {
    let (old, new) = ([("a", "a1"), ("b", "b1"), ("c", "c1")], [("a", "a2"), ("b", "b2"), ("d", "d2")]);
    for moved in 0..=5 {
        let folder = Folder::new(&format!("half-{moved}"));
        set(&old).write(&folder.place(), &mut Vec::new()).expect("written");
        // The set that was on its way: made whole elsewhere, then moved over in part.
        let other = Folder::new(&format!("other-{moved}"));
        set(&old).write(&other.place(), &mut Vec::new()).expect("written");
        set(&new).write(&other.place(), &mut Vec::new()).expect("written");
        let swap = folder.place().swap_folder();
        std::fs::create_dir(&swap).expect("a folder");
        for (n, name) in ["a", "b", "d", "files.sha256"].into_iter().enumerate() {
            let to = if n < moved { folder.0.join(name) } else { swap.join(name) };
            std::fs::copy(other.0.join(name), to).expect("copied");
        }
        if moved == 5 {
            std::fs::remove_dir(&swap).expect("empty by then");
        }
        let mut told = Vec::new();
        let third = Place::of_folder(folder.0.clone(), false, ("compare", "van"), Vec::new());
        set(&[("e", "e3")]).write(&third, &mut told).expect("written");
        let told = String::from_utf8(told).expect("text");
        assert_eq!(
            told.contains("cut off half-way (run, van: 3 files of one set)"),
            moved < 4,
            "{moved}: {told}"
        );
        assert_eq!(folder.names(), ["a", "b", "c", "d", "e", "files.sha256"], "{moved}");
        assert_eq!(
            ["a", "b", "c", "d", "e"].map(|n| folder.read(n)),
            ["a2", "b2", "c1", "d2", "e3"],
            "{moved}"
        );
        let list = Manifest::read(&folder.0.join("files.sha256")).expect("the list");
        let headings: Vec<&str> = list.0.iter().map(|s| s.heading.as_str()).collect();
        let left = "run, van: 3 files of one set, of which these are left";
        assert_eq!(headings, ["compare, van: 1 file", "run, van: 3 files of one set", left], "{moved}");
    }
}

/// Somebody put a file of his own where the rest of a set was to go: it is not taken from him.
#[test]
fn mending_overwrites_nobody() {
    let folder = Folder::new("nobody");
    set(&[("a", "a1"), ("b", "b1")]).write(&folder.place(), &mut Vec::new()).expect("written");
    let swap = folder.place().swap_folder();
    std::fs::create_dir(&swap).expect("a folder");
    std::fs::write(swap.join("b"), "b2").expect("written");
    let hash = hash_of(&swap.join("b")).expect("a hash");
    let list = Manifest(vec![Set { heading: "run".into(), files: vec![("b".into(), hash)] }]);
    std::fs::write(swap.join("files.sha256"), list.text()).expect("written");
    std::fs::write(folder.0.join("b"), "mine").expect("written");
    let refused = set(&[("c", "c3")]).write(&folder.place(), &mut Vec::new());
    assert!(matches!(refused, Err(Failure::Usage(what)) if what.contains("--replace")));
    assert_eq!((folder.read("b").as_str(), folder.names().contains(&"c".to_owned())), ("mine", false));
    let asked = Place { replace: true, ..folder.place() };
    set(&[("c", "c3")]).write(&asked, &mut Vec::new()).expect("written");
    assert_eq!((folder.read("b").as_str(), folder.read("c").as_str()), ("b2", "c3"));
}

/// Folders of killed runs go; one whose run lives stays, and so does what only looks alike.
#[test]
fn left_over_parts_are_swept_up() {
    let folder = Folder::new("parts");
    let dead = folder.0.join(".files.sha256.123-0.part");
    std::fs::create_dir(&dead).expect("a folder");
    std::fs::write(dead.join("a"), "half").expect("written");
    std::fs::create_dir(folder.0.join(".files.sha256.mine.part")).expect("a folder");
    let place = folder.place();
    let living = place.begin(&mut Vec::new()).expect("a stage");
    assert!(!dead.exists());
    set(&[("a", "a1")]).write(&place, &mut Vec::new()).expect("written");
    assert_eq!(folder.names().len(), 4, "{:?}", folder.names());
    drop(living);
    assert_eq!(folder.names(), [".files.sha256.mine.part", "a", "files.sha256"]);
}

#[test]
fn a_list_leads_nowhere_else() {
    let text = "# tickover run: 1 file\naa  ../a\nbb  /etc/b\ncc  c\ndd  ..\n";
    let folder = Folder::new("list");
    std::fs::write(folder.0.join("files.sha256"), text).expect("written");
    let list = Manifest::read(&folder.0.join("files.sha256")).expect("a list");
    assert_eq!(list.0[0].files, [("c".to_owned(), "cc".to_owned())]);
    std::fs::write(folder.0.join("files.sha256"), "cc  c\n").expect("written");
    assert_eq!(Manifest::read(&folder.0.join("files.sha256")), None);
    let refused = set(&[("c", "c1")]).write(&folder.place(), &mut Vec::new());
    assert!(matches!(refused, Err(Failure::Usage(_))), "a list that is not ours is not replaced");
}
