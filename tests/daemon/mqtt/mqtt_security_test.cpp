#include "daemon/mqtt/mqtt_sink.hpp"

#include <condition_variable>
#include <csignal>
#include <cstdlib>
#include <mutex>

#include <sys/stat.h>

#include <gtest/gtest.h>

#include "daemon/mqtt/broker_address.hpp"
#include "daemon/mqtt/password_file.hpp"
#include "daemon/mqtt/tls_explain.hpp"
#include "tests/daemon/mqtt/broker.hpp"

namespace oxherd::daemon::mqtt_security_test {

using namespace mqtt_test;

bool contains(const std::string &text, const std::string &part) { return text.find(part) != std::string::npos; }

TEST(BrokerAddress, IsReadWithAndWithoutPortAndForIpv6) {
  const auto plain = parse_broker("mqtt://127.0.0.1:1884");
  ASSERT_TRUE(plain);
  EXPECT_EQ(plain->host, "127.0.0.1");
  EXPECT_EQ(plain->port, 1884);
  EXPECT_FALSE(plain->tls);
  const auto tls = parse_broker("mqtts://broker.larkfield.example");
  ASSERT_TRUE(tls);
  EXPECT_EQ(tls->host, "broker.larkfield.example");
  EXPECT_EQ(tls->port, 8883);
  EXPECT_TRUE(tls->tls);
  const auto ipv6 = parse_broker("mqtt://[2001:db8::1]:1885");
  ASSERT_TRUE(ipv6);
  EXPECT_EQ(ipv6->host, "2001:db8::1");
  EXPECT_EQ(ipv6->port, 1885);
  EXPECT_EQ(parse_broker("mqtt://[::1]")->port, 1883);
  for (const auto *wrong :
       {"", "127.0.0.1:1883", "mqtt://", "mqtt://:1883", "mqtt://host:", "mqtt://host:0", "mqtt://host:65536",
        "mqtt://host:18a", "mqtt://host/path", "mqtt://user@host", "mqtt://[::1", "mqtt://[::1]1883", "http://host"})
    EXPECT_FALSE(parse_broker(wrong)) << wrong;
}

TEST(PasswordFile, IsReadWithoutItsLineEnd) {
  const TemporaryDirectory directory;
  EXPECT_EQ(read_password(directory.write("a", "open sesame\n")), "open sesame");
  EXPECT_EQ(read_password(directory.write("b", "open sesame\r\n", 0400)), "open sesame");
  EXPECT_EQ(read_password(directory.write("c", " spaces stay ")), " spaces stay ");
}

TEST(PasswordFile, IsRefusedWithWordsThatSayWhatToDo) {
  const TemporaryDirectory directory;
  const auto why = [&](const std::string &file) {
    const auto password = read_password(file);
    return password ? "it was read" : password.error();
  };
  const auto open = directory.write("open", "secret", 0644);
  EXPECT_EQ(why(open),
            "mqtt.password_file: " + open + ": others than its owner may use it (mode 0644); run: chmod 600 " + open);
  for (const unsigned mode : {0640U, 0604U, 0620U, 0602U})
    EXPECT_TRUE(contains(why(directory.write("some", "secret", mode)), "chmod 600")) << mode;
  EXPECT_TRUE(contains(why(directory.file("none")), "No such file"));
  EXPECT_TRUE(contains(why(directory.file("")), "not a plain file"));
  EXPECT_TRUE(contains(why(directory.write("empty", "\n")), "empty"));
  EXPECT_TRUE(contains(why(directory.write("long", std::string(5000, 'x'))), "longer"));
  ASSERT_EQ(::mkfifo(directory.file("pipe").c_str(), 0600), 0);
  EXPECT_TRUE(contains(why(directory.file("pipe")), "not a plain file")); // and it does not wait for a writer
}

/// What the sink says after its first attempt: how it failed, or nothing when it connected.
class FirstAttempt {
public:
  explicit FirstAttempt(const config::Mqtt &settings)
      : sink_{MqttSink::start(settings, "larkfield", [this](const MqttHealth &health) {
          const std::lock_guard hold{lock_};
          if (!said_) said_ = health.connected ? "" : health.trouble;
          wake_.notify_all();
        })} {}
  std::string trouble() {
    std::unique_lock hold{lock_};
    if (!wake_.wait_for(hold, patience, [&] { return said_.has_value(); })) return "nothing was heard";
    return *said_;
  }

private:
  std::mutex lock_;
  std::condition_variable wake_;
  std::optional<std::string> said_;
  std::unique_ptr<MqttSink> sink_; // last: it calls the lambda until it is gone
};

TEST(MqttSink, GivesThePasswordOfItsFileAndSaysWhenItIsRefused) {
  const TemporaryDirectory directory;
  const auto passwords = directory.file("passwords");
  run({"mosquitto_passwd", "-b", "-c", passwords, "oxherd", "open sesame"});
  const int port = free_port();
  Broker guarded{"listener " + std::to_string(port) + " 127.0.0.1\nallow_anonymous false\npassword_file " + passwords +
                     "\n",
                 port};
  guarded.start();
  config::Mqtt settings;
  settings.broker = guarded.url();
  settings.user = "oxherd";
  settings.password_file = directory.write("password", "open sesame\n");
  EXPECT_EQ(FirstAttempt{settings}.trouble(), "");
  settings.password_file = directory.write("wrong", "open barley\n");
  EXPECT_TRUE(contains(FirstAttempt{settings}.trouble(), "mqtt.password_file")) << FirstAttempt{settings}.trouble();
  settings.password_file = directory.write("open", "open sesame\n", 0644);
  EXPECT_TRUE(contains(FirstAttempt{settings}.trouble(), "chmod 600"));
  settings.user.reset();
  settings.password_file.reset();
  EXPECT_TRUE(contains(FirstAttempt{settings}.trouble(), "mqtt.user"));
}

/// An authority of the test's own, another one, and a broker with one listener for each kind of certificate.
class MqttTls : public testing::Test {
protected:
  static void SetUpTestSuite() {
    suite_ = std::make_unique<Suite>();
    suite_->prepare();
  }
  static void TearDownTestSuite() { suite_.reset(); }

  static config::Mqtt settings(int port, const std::string &authority = "ca") {
    config::Mqtt settings;
    settings.broker = "mqtts://127.0.0.1:" + std::to_string(port);
    settings.ca_file = suite_->directory.file(authority + ".pem");
    return settings;
  }

  struct Suite {
    void prepare() {
      authority("ca");
      authority("other");
      certificate("good", "IP:127.0.0.1,DNS:localhost", {"-days", "30"});
      certificate("wrong-name", "DNS:broker.larkfield.example,IP:192.0.2.7", {"-days", "30"});
      certificate("expired", "IP:127.0.0.1", {"-startdate", "20200101000000Z", "-enddate", "20200201000000Z"});
      certificate("future", "IP:127.0.0.1", {"-startdate", "20980101000000Z", "-enddate", "20990101000000Z"});
      std::string text = "per_listener_settings true\n";
      for (const auto &[port, name] : {std::pair{good, "good"},
                                       {wrong_name, "wrong-name"},
                                       {expired, "expired"},
                                       {future, "future"},
                                       {client_certificate, "good"}}) {
        text += "listener " + std::to_string(port) + " 127.0.0.1\nallow_anonymous true\n";
        text += "cafile " + directory.file("ca.pem") + "\ncertfile " + directory.file(std::string{name} + ".pem") +
                "\nkeyfile " + directory.file(std::string{name} + ".key") + "\n";
        if (port == client_certificate) text += "require_certificate true\n";
      }
      broker = std::make_unique<Broker>(text, good);
      broker->start();
    }
    void key(const std::string &name) const {
      run({"openssl", "ecparam", "-name", "prime256v1", "-genkey", "-noout", "-out", directory.file(name + ".key")});
    }
    void authority(const std::string &name) const {
      key(name);
      run({"openssl", "req", "-x509", "-new", "-key", directory.file(name + ".key"), "-subj", "/CN=Larkfield " + name,
           "-days", "30", "-out", directory.file(name + ".pem")});
    }
    void certificate(const std::string &name, const std::string &alternative_names,
                     const std::vector<std::string> &validity) const {
      key(name);
      const auto request = directory.file(name + ".csr");
      run({"openssl", "req", "-new", "-key", directory.file(name + ".key"), "-subj", "/CN=" + name, "-out", request});
      directory.write("index", "");
      directory.write("ca.conf", "[ca]\ndefault_ca=a\n[a]\ndatabase=" + directory.file("index") +
                                     "\nnew_certs_dir=" + directory.file("") +
                                     "\ndefault_md=sha256\nrand_serial=yes\npolicy=p\n[p]\ncommonName=supplied\n"
                                     "[names]\nsubjectAltName=" +
                                     alternative_names + "\n");
      std::vector<std::string> command{"openssl", "ca", "-batch", "-notext", "-config", directory.file("ca.conf")};
      command.insert(command.end(), {"-cert", directory.file("ca.pem"), "-keyfile", directory.file("ca.key")});
      command.insert(command.end(), {"-extensions", "names", "-in", request, "-out", directory.file(name + ".pem")});
      command.insert(command.end(), validity.begin(), validity.end());
      run(command);
    }
    TemporaryDirectory directory;
    int good = free_port(), wrong_name = free_port(), expired = free_port(), future = free_port(),
        client_certificate = free_port();
    std::unique_ptr<Broker> broker;
  };
  static inline std::unique_ptr<Suite> suite_;
};

TEST_F(MqttTls, ConnectsToABrokerWhoseCertificateIsInOrder) {
  EXPECT_EQ(FirstAttempt{settings(suite_->good)}.trouble(), "");
}

TEST_F(MqttTls, RefusesACertificateForAnotherNameAndNamesBoth) {
  const auto why = FirstAttempt{settings(suite_->wrong_name)}.trouble();
  EXPECT_TRUE(contains(why, "for another name")) << why;
  EXPECT_TRUE(contains(why, "\"127.0.0.1\" is asked for")) << why;
  EXPECT_TRUE(contains(why, "broker.larkfield.example, 192.0.2.7")) << why;
}

TEST_F(MqttTls, RefusesAnExpiredCertificateAndSaysSinceWhen) {
  const auto why = FirstAttempt{settings(suite_->expired)}.trouble();
  EXPECT_TRUE(contains(why, "expired on 2020-02-01")) << why;
}

TEST_F(MqttTls, RefusesACertificateOfTheFutureAndSuspectsTheClock) {
  const auto why = FirstAttempt{settings(suite_->future)}.trouble();
  EXPECT_TRUE(contains(why, "valid only from 2098-01-01 on")) << why;
  EXPECT_TRUE(contains(why, "clock")) << why;
}

TEST_F(MqttTls, RefusesAnotherAuthorityAndPointsToTheSetting) {
  const auto why = FirstAttempt{settings(suite_->good, "other")}.trouble();
  EXPECT_TRUE(contains(why, "not signed by an authority trusted here")) << why;
  EXPECT_TRUE(contains(why, "mqtt.ca_file")) << why;
  auto without = settings(suite_->good);
  without.ca_file.reset(); // the system's authorities do not know the test's
  EXPECT_TRUE(contains(FirstAttempt{without}.trouble(), "not signed by an authority trusted here"));
}

TEST_F(MqttTls, NamesAFileItCannotLoad) {
  EXPECT_EQ(FirstAttempt{settings(suite_->good, "missing")}.trouble(),
            "mqtt.ca_file: " + suite_->directory.file("missing.pem") + ": No such file or directory");
  auto broken = settings(suite_->good);
  broken.certificate_file = suite_->directory.write("broken.pem", "no certificate");
  broken.key_file = suite_->directory.file("good.key");
  EXPECT_TRUE(contains(FirstAttempt{broken}.trouble(), "mqtt.certificate_file: "));
}

TEST_F(MqttTls, ShowsItsOwnCertificateWhereTheBrokerAsksForOne) {
  EXPECT_TRUE(contains(FirstAttempt{settings(suite_->client_certificate)}.trouble(), "mqtt.certificate_file"));
  auto with = settings(suite_->client_certificate);
  with.certificate_file = suite_->directory.file("good.pem");
  with.key_file = suite_->directory.file("good.key");
  EXPECT_EQ(FirstAttempt{with}.trouble(), "");
}

TEST_F(MqttTls, ExplainsAPlainListenerAndASilentOne) {
  using namespace std::chrono_literals;
  Broker plain;
  plain.start();
  auto address = *parse_broker(plain.url());
  EXPECT_EQ(why_unreachable(address, {}, 5s), "");
  address.tls = true;
  EXPECT_TRUE(contains(why_unreachable(address, {}, 5s), "is this a TLS port?"));
  plain.freeze();
  EXPECT_TRUE(contains(why_unreachable(address, {}, 200ms), "no TLS answer"));
  plain.thaw();
  EXPECT_TRUE(contains(why_unreachable({"127.0.0.1", free_port(), false}, {}, 5s), "connection refused"));
}

} // namespace oxherd::daemon::mqtt_security_test
