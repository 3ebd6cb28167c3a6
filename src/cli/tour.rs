//! The `tour` command: the story of a studio day, played through a real server.

mod scenes;
mod written;

use std::{fs, io, path::Path};

use reqwest::{Client, StatusCode};
use serde_json::Value;
use tokio::{net::TcpListener, sync::oneshot};

use self::{
    scenes::{Answers, Scene, scenes},
    written::{paragraph, question, without_assumptions},
};
use crate::{
    app::App,
    cli::{
        args::Tour,
        io::{pretty, print},
    },
    request::format::AnswerFormat,
    server::state::Config,
};

const HEAD: &str = "A day in the boathouse. A rowing club wants portraits: the eight, then each of them. The kit is mixed, and no two dials count alike: the key head's numbers rise with power, the fill head's fall, the small head counts in per cent, the speedlight in fractions, and a borrowed head in joules.";
const NOTE: &str =
    "Each answer also lists what it assumes, which is left out here. The day runs in a service of its own.";
const NOTE_OF_JSON: &str = "The day runs in a service of its own.";

/// Starts a server on a free port, plays each scene over HTTP, and prints questions and answers.
pub async fn play(flags: Tour) -> io::Result<()> {
    let listener = TcpListener::bind("127.0.0.1:0").await?;
    let url = format!("http://{}", listener.local_addr()?);
    let (stop, stopped) = oneshot::channel::<()>();
    let server = tokio::spawn(App::new(Config::default()).serve(listener, async move {
        // Dropping the sender stops the server too.
        let _ = stopped.await;
    }));
    if let Some(folder) = &flags.pictures {
        fs::create_dir_all(folder).map_err(|error| at(folder, &error))?;
    }
    let note = if flags.json { NOTE_OF_JSON } else { NOTE };
    print(&format!("{}\n{}", paragraph(HEAD), paragraph(note)))?;
    let client = Client::builder().no_proxy().build().map_err(io::Error::other)?;
    let mut answers = Answers::default();
    for (number, scene) in scenes().iter().enumerate() {
        play_scene(&client, &url, (number + 1, scene), &flags, &mut answers).await?;
    }
    drop(client);
    drop(stop);
    server.await.map_err(io::Error::other)?
}

async fn play_scene(
    client: &Client,
    url: &str,
    (number, scene): (usize, &Scene),
    flags: &Tour,
    answers: &mut Answers,
) -> io::Result<()> {
    let body = (scene.body)(answers);
    let path = scene.path;
    let ask = async |format: AnswerFormat| {
        let post = client.post(format!("{url}/v1/{path}")).header("accept", format.media_type());
        let response = post.json(&body).send().await.map_err(io::Error::other)?;
        let status = response.status();
        let answer = response.text().await.map_err(io::Error::other)?;
        match status {
            StatusCode::OK => Ok(answer),
            _ => Err(io::Error::other(format!("{path} answered {status}: {answer}"))),
        }
    };
    print(&format!("\n{number}. {}\n\n{}\n", scene.title, paragraph(scene.before)))?;
    let json: Value = serde_json::from_str(&ask(AnswerFormat::Json).await?)?;
    if flags.json {
        print(&format!("POST /v1/{path}\n{}\n{}", pretty(&body), pretty(&json)))?;
    } else {
        let text = ask(AnswerFormat::Text).await?;
        print(&format!(
            "{}\n{}",
            question(path, &body, scene.news.map(|news| news(&body)).as_ref()),
            without_assumptions(&text)
        ))?;
    }
    if let Some(folder) = flags.pictures.as_deref().filter(|_| scene.is_drawn) {
        let file = write_picture(folder, number, path, &ask(AnswerFormat::Svg).await?)?;
        print(&format!("\nThe picture is in {file}\n"))?;
    }
    print(&format!("\n{}", paragraph(&(scene.after)(&json))))?;
    answers.insert(path, (body, json));
    Ok(())
}

/// An error with the place that it is about.
fn at(place: &Path, error: &io::Error) -> io::Error {
    io::Error::new(error.kind(), format!("{}: {error}", place.display()))
}

/// Writes a picture, and gives the name of its file.
fn write_picture(folder: &Path, number: usize, path: &str, svg: &str) -> io::Result<String> {
    let file = folder.join(format!("{number}-{}.svg", path.replace('/', "-")));
    fs::write(&file, svg).map_err(|error| at(&file, &error))?;
    Ok(file.display().to_string())
}
